"""Guide or not, how long, and with what: the verdict, what if, two rigs side by side; read `advice_page`."""
