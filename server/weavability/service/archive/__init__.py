"""An archive of orders on every loom of a park: read in parts, judged by Dask, kept as Parquet."""
