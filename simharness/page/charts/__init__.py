"""The curves of the antenna as options of the chart element: plain data, later updated by series."""
