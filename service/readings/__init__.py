"""What the sensors read in a cook, on which clock, and how it is packed."""
