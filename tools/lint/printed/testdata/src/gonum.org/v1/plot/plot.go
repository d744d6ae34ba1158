package plot
