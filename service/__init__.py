"""When should this cook stop? The decisions of a microwave cook, from what its sensors read."""
