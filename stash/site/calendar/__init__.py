"""The studio's days as a page, and as a feed that a calendar reads."""
