"""DXF in and out: edges, profiles, features, faults."""
