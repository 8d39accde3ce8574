"""Work over logs of any number: cut into pieces, done on all cores or on a cluster, put together in order."""
