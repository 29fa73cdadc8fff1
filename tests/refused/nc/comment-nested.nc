(MACHINE mm EXPECT comment-nested LINE 3 COLUMN 6)
G21 G90 G40
(one (two))
