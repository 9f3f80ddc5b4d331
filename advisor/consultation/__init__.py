"""A case from event to event: what was said and done, without terminal and files."""
