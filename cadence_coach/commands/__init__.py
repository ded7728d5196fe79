"""One module a command of the command line; each imports what it needs when it runs, so that help stays quick."""
