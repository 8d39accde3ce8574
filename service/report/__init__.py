"""An audit for people: one HTML file with its pictures inside, to be read, printed and kept."""
