"""Case files: append, read, list, lock and verify, one JSON object a line."""
