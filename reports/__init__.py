"""Charts, pages and workbooks made from a Study."""
