"""Pure shapes and lines: nothing here knows what it is used for."""
