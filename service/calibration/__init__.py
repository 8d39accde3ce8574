"""From the logs of one oven to what is known of it: a profile of fitted numbers, and what could not be fitted and why."""
