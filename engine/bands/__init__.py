"""And as it may turn out? The same build many times, with everything that is uncertain drawn."""
