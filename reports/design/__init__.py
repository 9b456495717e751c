"""One design: its build sheet, drawings and bench plan."""
