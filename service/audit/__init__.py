"""What a set of finished cooks says about ovens, bags and policies, and about what an oven's own control follows."""
