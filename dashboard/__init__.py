"""The app: it reads published results and draws; it holds no arithmetic, no SQL and builds no workbooks."""
