"""The frame around the views, the view of the antenna, what leaves the page, and the server of it all."""
