"""The command line: parse, one library call, render. Nothing is computed here."""
