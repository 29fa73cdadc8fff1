(MACHINE mm EXPECT character-not-ascii LINE 3 COLUMN 6)
G21 G90 G40
(Gap µm)
