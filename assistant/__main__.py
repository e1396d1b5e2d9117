"""`python -m assistant`: the same as `benchhand`."""

from assistant.cli.app import main

if __name__ == "__main__":
    main()
