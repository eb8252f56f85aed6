"""``python -m dewledger`` is the command."""

from dewledger.reports.command.app import main

if __name__ == "__main__":
    main()
