"""Orders under constraints: what must come before what, and the fewest runs of one colour. Knows no thread."""
