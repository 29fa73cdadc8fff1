(MACHINE mm EXPECT comment-open LINE 3 COLUMN 5)
G21 G90 G40
G00 (to the start
