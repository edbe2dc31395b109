"""What should be ordered, by when, of whom, how much and why."""
