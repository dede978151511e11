"""Sheets as files: PDF pages, SVG, DXF."""
