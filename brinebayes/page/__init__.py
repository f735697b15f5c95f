"""One file that advises without a network: the model, the engine in JavaScript, the page."""
