"""The list of pages."""


def run() -> None:
    """Show the app."""
