"""Run the command line with `python -m dyecast_api`."""

from dyecast_api.cli import main

if __name__ == "__main__":
    main()
