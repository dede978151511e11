"""The numbers of a record as fields of the page, with a sketch for each; and the view to begin with."""
