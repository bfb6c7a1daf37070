"""Papers: one Page of lines, arcs and text, written as PDF and SVG; workbooks; the 3D file."""
