"""What to do next and why: candidates, their cost and worth, the choice, its reasons."""
