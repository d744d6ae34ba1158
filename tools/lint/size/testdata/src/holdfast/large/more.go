package large
