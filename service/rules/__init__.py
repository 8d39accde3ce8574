"""What to do with the evidence: one ordered table of rules behind one function."""
