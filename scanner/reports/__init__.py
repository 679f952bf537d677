"""Results on paper: pages and charts in grays, streamed into tagged PDF files; CSV that spreadsheets open safely."""
