"""What knowledge, machines and cases are: typed, frozen, without files and without arithmetic."""
