"""What each word of the command line does: its arguments, and what it runs and returns."""
