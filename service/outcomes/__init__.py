"""What was found when a cook was over, and the shares that follow from it."""
