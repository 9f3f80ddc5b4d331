"""What closed cases tell: each in brief, and how alike two are."""
