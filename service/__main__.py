"""`python -m service` is the `cookstop` command."""

from service.cli import main

main()
