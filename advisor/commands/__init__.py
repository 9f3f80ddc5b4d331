"""What each command does, without knowing how options are spelled: load, call, print, exit code."""
