"""What to do tonight and on the nights that follow: the pages Tonight, The year and Projects; read `tonight_page`."""
