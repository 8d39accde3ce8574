"""From evidence to a distribution of the time at which to stop."""
