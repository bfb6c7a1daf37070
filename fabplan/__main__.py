"""Run the command line: `python -m fabplan`."""

from fabplan.cli import main

if __name__ == "__main__":
    main()
