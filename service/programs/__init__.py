"""Cooking programmes as data: one TOML file a programme, and the loader that checks them."""
