"""Text with a unit to SI, checked by dimension. The only home of pint."""
