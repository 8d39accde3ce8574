"""What the readings say: one estimator a file, each a pure function of arrays that opens with its model."""
