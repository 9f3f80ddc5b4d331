"""The conversation with the technician: append-only lines, one code path for a terminal, a pipe and a scenario."""
