"""One command a file; each is imported only when it is called."""
