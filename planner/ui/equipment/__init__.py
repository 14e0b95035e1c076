"""What the observer owns: the guided set-up, and the page that edits all of it; read `setup_page` first."""
