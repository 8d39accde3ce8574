"""What `cookstop` can be told to do, one command a file."""
