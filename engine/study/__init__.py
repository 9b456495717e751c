"""What was asked? A study file, or texts, to one frozen `Study`; every mistake with its line."""
