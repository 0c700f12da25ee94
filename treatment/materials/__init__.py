"""Materials and panel builds: tables, provenance, and the prediction of porous absorbers."""
