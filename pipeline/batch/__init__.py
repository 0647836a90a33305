"""Many files: find them, convert each in a process of its own, and report what became of every one."""
