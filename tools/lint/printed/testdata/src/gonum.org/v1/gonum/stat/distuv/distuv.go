package distuv
