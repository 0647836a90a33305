"""Parts → Steps: the sewing order, and where the thread comes in and leaves each part."""
