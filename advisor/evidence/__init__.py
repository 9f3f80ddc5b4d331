"""What the words of the knowledge are worth: the chances that a check's rows give, and which checks tell causes apart."""
