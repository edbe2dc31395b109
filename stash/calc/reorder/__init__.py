"""When yarn is ordered, and how much of it: jobs on the calendar first, averages after them."""
