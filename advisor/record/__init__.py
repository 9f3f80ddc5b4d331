"""The document made from a case: Markdown, HTML and JSON from one view."""
