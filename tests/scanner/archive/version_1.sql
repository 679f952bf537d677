-- An archive of version 1, as sqlite3's iterdump wrote it: test_migration.py brings it to today's.
PRAGMA application_id = 1178883889;
PRAGMA user_version = 1;
BEGIN TRANSACTION;
CREATE TABLE cutouts (                    -- cutouts/ab/abcd….png
    sheet  INTEGER NOT NULL REFERENCES sheets (id),
    kind   TEXT NOT NULL CHECK (kind IN ('writing', 'box')),
    field  TEXT NOT NULL,
    option TEXT NOT NULL,                 -- '' for a writing area
    digest TEXT NOT NULL,
    PRIMARY KEY (sheet, kind, field, option)
) STRICT, WITHOUT ROWID;
INSERT INTO "cutouts" VALUES(1,'writing','remarks.1','','3348aef6d9ea2b10bf9f108f7f655977a88cc3dd9cf4589c89758238355872e6');
INSERT INTO "cutouts" VALUES(1,'writing','remarks.2','','53527228a35a9eb1f1208c3f3d86a235ff5c6bbc5b5e286798d4cc50fc1c7eb8');
INSERT INTO "cutouts" VALUES(1,'writing','remarks.3','','63c83425fda208f91361335b1a8e2bec37a7b4897560878b17ea83a31f8bbd21');
INSERT INTO "cutouts" VALUES(1,'writing','remarks.4','','0ec3eb7f8810dc85357b7bff08c96ca309086341be86b49e7ac21b296cb147eb');
INSERT INTO "cutouts" VALUES(1,'writing','remarks.5','','af81c6c5aed52001675660514fa2458dab33caa1e84b9bc15caa8beb4d604fd5');
INSERT INTO "cutouts" VALUES(2,'writing','remarks.A','','f88f4d7c68f6b9837b90a4d0298e4e303b8bf84bade55510665ce2c42b07a1f1');
INSERT INTO "cutouts" VALUES(2,'writing','remarks.B','','c5071a6bc3057870f60f8440f22d734ff02a7d26da8af5a45b5a83c3c8f39959');
INSERT INTO "cutouts" VALUES(2,'writing','remarks.C','','239e9818fd6a39a41de1b9cc7b9e0753e48a7fa86e6b490a0295aa25102ebd23');
INSERT INTO "cutouts" VALUES(2,'writing','remarks.D','','7530b173b3502bb5e5d18f81d9a5eb4f803d190571cbbfd66fb2f2c428460af3');
INSERT INTO "cutouts" VALUES(2,'writing','remarks.E','','79137853b3bbc5cd4d1dddd2f42d395bdcbd7cf489a6b2bfe0d0aab3a759d8b7');
INSERT INTO "cutouts" VALUES(3,'writing','remarks.1','','3348aef6d9ea2b10bf9f108f7f655977a88cc3dd9cf4589c89758238355872e6');
INSERT INTO "cutouts" VALUES(3,'writing','remarks.2','','53527228a35a9eb1f1208c3f3d86a235ff5c6bbc5b5e286798d4cc50fc1c7eb8');
INSERT INTO "cutouts" VALUES(3,'writing','remarks.3','','63c83425fda208f91361335b1a8e2bec37a7b4897560878b17ea83a31f8bbd21');
INSERT INTO "cutouts" VALUES(3,'writing','remarks.4','','0ec3eb7f8810dc85357b7bff08c96ca309086341be86b49e7ac21b296cb147eb');
INSERT INTO "cutouts" VALUES(3,'writing','remarks.5','','af81c6c5aed52001675660514fa2458dab33caa1e84b9bc15caa8beb4d604fd5');
INSERT INTO "cutouts" VALUES(4,'writing','remarks.A','','bd973464c389a2c20fc75903e721fd7f4630db9e587bbef7c1560310caa2c661');
INSERT INTO "cutouts" VALUES(4,'writing','remarks.B','','c917f6590e043f22a1b7a7cabce28536516ca60a1391580aea9e349c7564efde');
INSERT INTO "cutouts" VALUES(4,'writing','remarks.C','','e013e1c132c0f6eb6d315cf5422e882937477ce32ebf76e14ed78eab4423d35b');
INSERT INTO "cutouts" VALUES(4,'writing','remarks.D','','0b62fd6a3df39aac54acd7ca19dc2c285de902052091bcc44ace6c4f551c5ea6');
INSERT INTO "cutouts" VALUES(4,'writing','remarks.E','','d853fddd1de0dd7bb3e2c503ed59f6c64a91d10e88b56295f5415809d60ba0af');
INSERT INTO "cutouts" VALUES(5,'writing','remarks.A','','926b78a1b305755291d38edb04b2fdb961c4faa1a6adbcdad07c4d47c10472d9');
INSERT INTO "cutouts" VALUES(5,'writing','remarks.B','','2fa5151d21d2096a2854b7bc9391d8b6260503c32ce78cc52d6ed3081ef8f7d3');
INSERT INTO "cutouts" VALUES(5,'writing','remarks.C','','bf4435c1ce9026f71f2933523dba0cf1ae7d5ee737731561e655a5ba4b6a3ff7');
INSERT INTO "cutouts" VALUES(5,'writing','remarks.D','','1341a3b2dcaacefb13af53f46c7e446209752e23bdb6f19c09031b9170f3330d');
INSERT INTO "cutouts" VALUES(5,'writing','remarks.E','','ecea23c859559c1d3a4ae56a1d4ff02e9a83f2a389dd5c48e07a92cbac4e0484');
INSERT INTO "cutouts" VALUES(6,'writing','remarks.1','','dcfa09002357f48d3c82a208e0c9e57a6b38d0091b08be5f27acff235e4d249f');
INSERT INTO "cutouts" VALUES(6,'writing','remarks.2','','1eaa30e7485e1ae074d62ba6295d87686cf659d5dd4a58bcdd7b602503802a2a');
INSERT INTO "cutouts" VALUES(6,'writing','remarks.3','','b87bad47f94419bbf7f0f0c2a9ba2a5c7ef10fa2c9a337baefbd286208da3917');
INSERT INTO "cutouts" VALUES(6,'writing','remarks.4','','bc046cc7cc5d3f1be9cf2a2be79481350df7126fe4c46f4fede95f95335dbff7');
INSERT INTO "cutouts" VALUES(6,'writing','remarks.5','','c2b599e24b23a59cbfb4f5a6cf77889e33911b3cda1938cf7ea58debb7848914');
INSERT INTO "cutouts" VALUES(7,'writing','remarks.A','','f88f4d7c68f6b9837b90a4d0298e4e303b8bf84bade55510665ce2c42b07a1f1');
INSERT INTO "cutouts" VALUES(7,'writing','remarks.B','','c5071a6bc3057870f60f8440f22d734ff02a7d26da8af5a45b5a83c3c8f39959');
INSERT INTO "cutouts" VALUES(7,'writing','remarks.C','','239e9818fd6a39a41de1b9cc7b9e0753e48a7fa86e6b490a0295aa25102ebd23');
INSERT INTO "cutouts" VALUES(7,'writing','remarks.D','','7530b173b3502bb5e5d18f81d9a5eb4f803d190571cbbfd66fb2f2c428460af3');
INSERT INTO "cutouts" VALUES(7,'writing','remarks.E','','79137853b3bbc5cd4d1dddd2f42d395bdcbd7cf489a6b2bfe0d0aab3a759d8b7');
CREATE TABLE drinks (                     -- drinks, over all sittings
    id          INTEGER PRIMARY KEY,
    key         TEXT NOT NULL UNIQUE,     -- the id, or the name where there is none
    name        TEXT NOT NULL,
    style       TEXT,
    abv_percent REAL,
    seal        BLOB
) STRICT;
INSERT INTO "drinks" VALUES(1,'heron-marsh','Heron Marsh','daiginjo',16.0,X'F6BD1735F28354D2');
INSERT INTO "drinks" VALUES(2,'first-frost','First Frost 純米大吟醸','junmai daiginjo',15.5,X'48D93F02FD4413CD');
INSERT INTO "drinks" VALUES(3,'gull-rock','Gull Rock','junmai',15.0,X'579669761ECCE607');
INSERT INTO "drinks" VALUES(4,'tidal-flat','Tidal Flat','kimoto junmai',16.5,X'D8EC8B468298C744');
INSERT INTO "drinks" VALUES(5,'old-jetty','Old Jetty','koshu',17.0,X'6C497361E8BC5638');
CREATE TABLE kits (                       -- kits/K7Q4M2/kit.json and layout.json, by SHA-256
    id             TEXT PRIMARY KEY,
    record_digest  TEXT NOT NULL,
    layout_digest  TEXT NOT NULL,
    record_pending TEXT,                  -- the digests that are about to take their place
    layout_pending TEXT,
    added_at       TEXT NOT NULL,
    seal           BLOB
) STRICT;
INSERT INTO "kits" VALUES('Q8EA39','840bad751345d9709f4a2aea777dc35addf58baaaa9acf87a5eed4b8ad05609a','1656353f56a92c47f1cdf1c9c1752052f41663cc79e3e091499fb8ef0bdefd14',NULL,NULL,'2026-12-06T10:00:00+00:00',X'B857B6BB8FEC88D2');
CREATE TABLE marks (                      -- as read; boxes that are empty have no row, their list is in layout.json
    sheet  INTEGER NOT NULL REFERENCES sheets (id),
    field  TEXT NOT NULL,
    option TEXT NOT NULL,
    state  TEXT NOT NULL CHECK (state IN ('marked', 'withdrawn', 'doubtful')),
    reason TEXT,
    PRIMARY KEY (sheet, field, option)
) STRICT, WITHOUT ROWID;
INSERT INTO "marks" VALUES(1,'scale.acidity.1','2','marked',NULL);
INSERT INTO "marks" VALUES(1,'scale.acidity.2','2','marked',NULL);
INSERT INTO "marks" VALUES(1,'scale.acidity.3','3','marked',NULL);
INSERT INTO "marks" VALUES(1,'scale.acidity.4','4','marked',NULL);
INSERT INTO "marks" VALUES(1,'scale.acidity.5','2','marked',NULL);
INSERT INTO "marks" VALUES(1,'scale.aroma.1','5','marked',NULL);
INSERT INTO "marks" VALUES(1,'scale.aroma.2','4','marked',NULL);
INSERT INTO "marks" VALUES(1,'scale.aroma.3','2','marked',NULL);
INSERT INTO "marks" VALUES(1,'scale.aroma.4','3','marked',NULL);
INSERT INTO "marks" VALUES(1,'scale.aroma.5','3','marked',NULL);
INSERT INTO "marks" VALUES(1,'scale.finish.1','1','marked',NULL);
INSERT INTO "marks" VALUES(1,'scale.finish.2','3','marked',NULL);
INSERT INTO "marks" VALUES(1,'scale.finish.3','3','marked',NULL);
INSERT INTO "marks" VALUES(1,'scale.finish.4','4','marked',NULL);
INSERT INTO "marks" VALUES(1,'scale.finish.5','4','marked',NULL);
INSERT INTO "marks" VALUES(1,'scale.sweetness.1','3','marked',NULL);
INSERT INTO "marks" VALUES(1,'scale.sweetness.2','2','marked',NULL);
INSERT INTO "marks" VALUES(1,'scale.sweetness.3','2','marked',NULL);
INSERT INTO "marks" VALUES(1,'scale.sweetness.4','3','marked',NULL);
INSERT INTO "marks" VALUES(1,'scale.sweetness.5','4','marked',NULL);
INSERT INTO "marks" VALUES(1,'scale.texture.1','1','marked',NULL);
INSERT INTO "marks" VALUES(1,'scale.texture.2','2','marked',NULL);
INSERT INTO "marks" VALUES(1,'scale.texture.3','3','marked',NULL);
INSERT INTO "marks" VALUES(1,'scale.texture.4','4','marked',NULL);
INSERT INTO "marks" VALUES(1,'scale.texture.5','3','marked',NULL);
INSERT INTO "marks" VALUES(1,'scale.weight.1','3','marked',NULL);
INSERT INTO "marks" VALUES(1,'scale.weight.2','2','marked',NULL);
INSERT INTO "marks" VALUES(1,'scale.weight.3','3','marked',NULL);
INSERT INTO "marks" VALUES(1,'scale.weight.4','5','marked',NULL);
INSERT INTO "marks" VALUES(1,'scale.weight.5','4','marked',NULL);
INSERT INTO "marks" VALUES(1,'words.1','apple','doubtful','the stroke is faint');
INSERT INTO "marks" VALUES(1,'words.1','melon','marked',NULL);
INSERT INTO "marks" VALUES(1,'words.1','stale','marked',NULL);
INSERT INTO "marks" VALUES(1,'words.2','apple','marked',NULL);
INSERT INTO "marks" VALUES(1,'words.2','koji','marked',NULL);
INSERT INTO "marks" VALUES(1,'words.2','pear','marked',NULL);
INSERT INTO "marks" VALUES(1,'words.3','caramel','marked',NULL);
INSERT INTO "marks" VALUES(1,'words.3','hay','marked',NULL);
INSERT INTO "marks" VALUES(1,'words.3','koji','marked',NULL);
INSERT INTO "marks" VALUES(1,'words.4','mushroom','marked',NULL);
INSERT INTO "marks" VALUES(1,'words.4','rose','marked',NULL);
INSERT INTO "marks" VALUES(1,'words.5','caramel','marked',NULL);
INSERT INTO "marks" VALUES(1,'words.5','honey','marked',NULL);
INSERT INTO "marks" VALUES(2,'match.A','1','marked',NULL);
INSERT INTO "marks" VALUES(2,'match.B','4','marked',NULL);
INSERT INTO "marks" VALUES(2,'match.C','3','marked',NULL);
INSERT INTO "marks" VALUES(2,'match.E','5','marked',NULL);
INSERT INTO "marks" VALUES(2,'sure.A','leaning','marked',NULL);
INSERT INTO "marks" VALUES(2,'sure.B','leaning','marked',NULL);
INSERT INTO "marks" VALUES(2,'sure.C','leaning','marked',NULL);
INSERT INTO "marks" VALUES(2,'sure.D','guess','marked',NULL);
INSERT INTO "marks" VALUES(2,'sure.E','leaning','marked',NULL);
INSERT INTO "marks" VALUES(3,'scale.acidity.1','2','marked',NULL);
INSERT INTO "marks" VALUES(3,'scale.acidity.2','2','marked',NULL);
INSERT INTO "marks" VALUES(3,'scale.acidity.3','3','marked',NULL);
INSERT INTO "marks" VALUES(3,'scale.acidity.4','4','marked',NULL);
INSERT INTO "marks" VALUES(3,'scale.acidity.5','2','marked',NULL);
INSERT INTO "marks" VALUES(3,'scale.aroma.1','5','marked',NULL);
INSERT INTO "marks" VALUES(3,'scale.aroma.2','4','marked',NULL);
INSERT INTO "marks" VALUES(3,'scale.aroma.3','2','marked',NULL);
INSERT INTO "marks" VALUES(3,'scale.aroma.4','3','marked',NULL);
INSERT INTO "marks" VALUES(3,'scale.aroma.5','3','marked',NULL);
INSERT INTO "marks" VALUES(3,'scale.finish.1','1','marked',NULL);
INSERT INTO "marks" VALUES(3,'scale.finish.2','3','marked',NULL);
INSERT INTO "marks" VALUES(3,'scale.finish.3','3','marked',NULL);
INSERT INTO "marks" VALUES(3,'scale.finish.4','4','marked',NULL);
INSERT INTO "marks" VALUES(3,'scale.finish.5','4','marked',NULL);
INSERT INTO "marks" VALUES(3,'scale.sweetness.1','3','marked',NULL);
INSERT INTO "marks" VALUES(3,'scale.sweetness.2','2','marked',NULL);
INSERT INTO "marks" VALUES(3,'scale.sweetness.3','2','marked',NULL);
INSERT INTO "marks" VALUES(3,'scale.sweetness.4','3','marked',NULL);
INSERT INTO "marks" VALUES(3,'scale.sweetness.5','4','marked',NULL);
INSERT INTO "marks" VALUES(3,'scale.texture.1','1','marked',NULL);
INSERT INTO "marks" VALUES(3,'scale.texture.2','2','marked',NULL);
INSERT INTO "marks" VALUES(3,'scale.texture.3','3','marked',NULL);
INSERT INTO "marks" VALUES(3,'scale.texture.4','4','marked',NULL);
INSERT INTO "marks" VALUES(3,'scale.texture.5','3','marked',NULL);
INSERT INTO "marks" VALUES(3,'scale.weight.1','3','marked',NULL);
INSERT INTO "marks" VALUES(3,'scale.weight.2','2','marked',NULL);
INSERT INTO "marks" VALUES(3,'scale.weight.3','3','marked',NULL);
INSERT INTO "marks" VALUES(3,'scale.weight.4','5','marked',NULL);
INSERT INTO "marks" VALUES(3,'scale.weight.5','4','marked',NULL);
INSERT INTO "marks" VALUES(3,'words.1','apple','marked',NULL);
INSERT INTO "marks" VALUES(3,'words.1','melon','marked',NULL);
INSERT INTO "marks" VALUES(3,'words.1','stale','marked',NULL);
INSERT INTO "marks" VALUES(3,'words.2','apple','marked',NULL);
INSERT INTO "marks" VALUES(3,'words.2','koji','marked',NULL);
INSERT INTO "marks" VALUES(3,'words.2','pear','marked',NULL);
INSERT INTO "marks" VALUES(3,'words.3','caramel','marked',NULL);
INSERT INTO "marks" VALUES(3,'words.3','hay','marked',NULL);
INSERT INTO "marks" VALUES(3,'words.3','koji','marked',NULL);
INSERT INTO "marks" VALUES(3,'words.4','mushroom','marked',NULL);
INSERT INTO "marks" VALUES(3,'words.4','rose','marked',NULL);
INSERT INTO "marks" VALUES(3,'words.5','caramel','marked',NULL);
INSERT INTO "marks" VALUES(3,'words.5','honey','marked',NULL);
INSERT INTO "marks" VALUES(4,'scale.acidity.A','4','marked',NULL);
INSERT INTO "marks" VALUES(4,'scale.acidity.B','2','marked',NULL);
INSERT INTO "marks" VALUES(4,'scale.acidity.C','2','marked',NULL);
INSERT INTO "marks" VALUES(4,'scale.acidity.D','3','marked',NULL);
INSERT INTO "marks" VALUES(4,'scale.acidity.E','1','marked',NULL);
INSERT INTO "marks" VALUES(4,'scale.aroma.A','3','marked',NULL);
INSERT INTO "marks" VALUES(4,'scale.aroma.B','4','marked',NULL);
INSERT INTO "marks" VALUES(4,'scale.aroma.C','2','marked',NULL);
INSERT INTO "marks" VALUES(4,'scale.aroma.D','5','marked',NULL);
INSERT INTO "marks" VALUES(4,'scale.aroma.E','5','marked',NULL);
INSERT INTO "marks" VALUES(4,'scale.finish.A','5','marked',NULL);
INSERT INTO "marks" VALUES(4,'scale.finish.B','2','marked',NULL);
INSERT INTO "marks" VALUES(4,'scale.finish.C','2','marked',NULL);
INSERT INTO "marks" VALUES(4,'scale.finish.D','5','marked',NULL);
INSERT INTO "marks" VALUES(4,'scale.finish.E','2','marked',NULL);
INSERT INTO "marks" VALUES(4,'scale.sweetness.A','2','marked',NULL);
INSERT INTO "marks" VALUES(4,'scale.sweetness.B','3','marked',NULL);
INSERT INTO "marks" VALUES(4,'scale.sweetness.C','4','marked',NULL);
INSERT INTO "marks" VALUES(4,'scale.sweetness.D','5','marked',NULL);
INSERT INTO "marks" VALUES(4,'scale.sweetness.E','3','marked',NULL);
INSERT INTO "marks" VALUES(4,'scale.texture.A','3','marked',NULL);
INSERT INTO "marks" VALUES(4,'scale.texture.B','2','marked',NULL);
INSERT INTO "marks" VALUES(4,'scale.texture.C','3','marked',NULL);
INSERT INTO "marks" VALUES(4,'scale.texture.D','3','marked',NULL);
INSERT INTO "marks" VALUES(4,'scale.texture.E','1','marked',NULL);
INSERT INTO "marks" VALUES(4,'scale.weight.A','4','marked',NULL);
INSERT INTO "marks" VALUES(4,'scale.weight.B','2','marked',NULL);
INSERT INTO "marks" VALUES(4,'scale.weight.C','3','marked',NULL);
INSERT INTO "marks" VALUES(4,'scale.weight.D','4','marked',NULL);
INSERT INTO "marks" VALUES(4,'scale.weight.E','3','marked',NULL);
INSERT INTO "marks" VALUES(4,'words.B','bread','marked',NULL);
INSERT INTO "marks" VALUES(4,'words.B','cedar','marked',NULL);
INSERT INTO "marks" VALUES(4,'words.C','pickle','marked',NULL);
INSERT INTO "marks" VALUES(4,'words.C','rice','marked',NULL);
INSERT INTO "marks" VALUES(4,'words.D','almond','marked',NULL);
INSERT INTO "marks" VALUES(4,'words.D','caramel','marked',NULL);
INSERT INTO "marks" VALUES(4,'words.D','honey','marked',NULL);
INSERT INTO "marks" VALUES(4,'words.E','apple','marked',NULL);
INSERT INTO "marks" VALUES(4,'words.E','melon','marked',NULL);
INSERT INTO "marks" VALUES(5,'match.A','4','marked',NULL);
INSERT INTO "marks" VALUES(5,'match.B','5','marked',NULL);
INSERT INTO "marks" VALUES(5,'match.C','1','marked',NULL);
INSERT INTO "marks" VALUES(5,'match.D','2','marked',NULL);
INSERT INTO "marks" VALUES(5,'match.E','3','marked',NULL);
INSERT INTO "marks" VALUES(5,'sure.A','sure','marked',NULL);
INSERT INTO "marks" VALUES(5,'sure.B','sure','marked',NULL);
INSERT INTO "marks" VALUES(5,'sure.C','leaning','marked',NULL);
INSERT INTO "marks" VALUES(5,'sure.D','leaning','marked',NULL);
INSERT INTO "marks" VALUES(5,'sure.E','leaning','marked',NULL);
INSERT INTO "marks" VALUES(6,'scale.acidity.1','2','marked',NULL);
INSERT INTO "marks" VALUES(6,'scale.acidity.2','3','marked',NULL);
INSERT INTO "marks" VALUES(6,'scale.acidity.3','3','marked',NULL);
INSERT INTO "marks" VALUES(6,'scale.acidity.4','4','marked',NULL);
INSERT INTO "marks" VALUES(6,'scale.acidity.5','3','marked',NULL);
INSERT INTO "marks" VALUES(6,'scale.aroma.1','4','marked',NULL);
INSERT INTO "marks" VALUES(6,'scale.aroma.2','4','marked',NULL);
INSERT INTO "marks" VALUES(6,'scale.aroma.3','2','marked',NULL);
INSERT INTO "marks" VALUES(6,'scale.aroma.4','3','marked',NULL);
INSERT INTO "marks" VALUES(6,'scale.aroma.5','5','marked',NULL);
INSERT INTO "marks" VALUES(6,'scale.finish.1','2','marked',NULL);
INSERT INTO "marks" VALUES(6,'scale.finish.2','2','marked',NULL);
INSERT INTO "marks" VALUES(6,'scale.finish.3','3','marked',NULL);
INSERT INTO "marks" VALUES(6,'scale.finish.4','4','marked',NULL);
INSERT INTO "marks" VALUES(6,'scale.finish.5','4','marked',NULL);
INSERT INTO "marks" VALUES(6,'scale.sweetness.1','3','marked',NULL);
INSERT INTO "marks" VALUES(6,'scale.sweetness.2','2','marked',NULL);
INSERT INTO "marks" VALUES(6,'scale.sweetness.3','2','marked',NULL);
INSERT INTO "marks" VALUES(6,'scale.sweetness.4','2','marked',NULL);
INSERT INTO "marks" VALUES(6,'scale.sweetness.5','4','marked',NULL);
INSERT INTO "marks" VALUES(6,'scale.texture.1','2','marked',NULL);
INSERT INTO "marks" VALUES(6,'scale.texture.2','1','marked',NULL);
INSERT INTO "marks" VALUES(6,'scale.texture.3','3','marked',NULL);
INSERT INTO "marks" VALUES(6,'scale.texture.4','4','marked',NULL);
INSERT INTO "marks" VALUES(6,'scale.texture.5','3','marked',NULL);
INSERT INTO "marks" VALUES(6,'scale.weight.1','2','marked',NULL);
INSERT INTO "marks" VALUES(6,'scale.weight.2','2','marked',NULL);
INSERT INTO "marks" VALUES(6,'scale.weight.3','4','marked',NULL);
INSERT INTO "marks" VALUES(6,'scale.weight.4','3','marked',NULL);
INSERT INTO "marks" VALUES(6,'scale.weight.5','4','marked',NULL);
INSERT INTO "marks" VALUES(6,'words.1','apple','marked',NULL);
INSERT INTO "marks" VALUES(6,'words.1','mould','marked',NULL);
INSERT INTO "marks" VALUES(6,'words.1','rose','marked',NULL);
INSERT INTO "marks" VALUES(6,'words.2','apple','marked',NULL);
INSERT INTO "marks" VALUES(6,'words.2','rose','marked',NULL);
INSERT INTO "marks" VALUES(6,'words.3','malt','marked',NULL);
INSERT INTO "marks" VALUES(6,'words.3','rice','marked',NULL);
INSERT INTO "marks" VALUES(6,'words.4','cheese','marked',NULL);
INSERT INTO "marks" VALUES(6,'words.4','mushroom','marked',NULL);
INSERT INTO "marks" VALUES(6,'words.5','almond','marked',NULL);
INSERT INTO "marks" VALUES(6,'words.5','caramel','marked',NULL);
INSERT INTO "marks" VALUES(7,'match.A','2','marked',NULL);
INSERT INTO "marks" VALUES(7,'match.B','4','marked',NULL);
INSERT INTO "marks" VALUES(7,'match.C','3','marked',NULL);
INSERT INTO "marks" VALUES(7,'match.E','5','marked',NULL);
INSERT INTO "marks" VALUES(7,'sure.A','leaning','marked',NULL);
INSERT INTO "marks" VALUES(7,'sure.B','leaning','marked',NULL);
INSERT INTO "marks" VALUES(7,'sure.C','leaning','marked',NULL);
INSERT INTO "marks" VALUES(7,'sure.D','guess','marked',NULL);
INSERT INTO "marks" VALUES(7,'sure.E','leaning','marked',NULL);
CREATE TABLE originals (                  -- page files as given, and typed entries
    digest   TEXT PRIMARY KEY CHECK (length(digest) = 64),
    suffix   TEXT NOT NULL,               -- by its content: the file is originals/ab/abcd….suffix
    bytes    INTEGER NOT NULL,
    name     TEXT NOT NULL,               -- the file's name as given, without its folder
    pile     TEXT NOT NULL REFERENCES piles (id),
    added_at TEXT NOT NULL,
    seal     BLOB
) STRICT;
INSERT INTO "originals" VALUES('5115639ea1ee10f7ee86c4bb0040df164c5aaf428dea9af0116a259ec36f8b1b','.jpg',502116,'doubtful.jpg','29ddefdd120e','2026-12-06T10:00:00+00:00',X'E52A41D9FEEFA3EC');
INSERT INTO "originals" VALUES('9e011cc3ad21620010ed0c11508bfb14d51b3502cb67785a8f9752c1d58a78f7','.jpg',605272,'kofi-match.jpg','29ddefdd120e','2026-12-06T10:00:00+00:00',X'7F5C68B23BD928A2');
INSERT INTO "originals" VALUES('33d9c756eacec501bfe47db0a645d2baa5f615f35ce7c60d1e1f41eeaae48df0','.jpg',502090,'kofi-notes-1.jpg','29ddefdd120e','2026-12-06T10:00:00+00:00',X'C6D692D3872EB82C');
INSERT INTO "originals" VALUES('5ebec0c1e8a2478a6624bfa17de13aaca9a88fbd6079698aa2783e56d1931bea','.jpg',870188,'kofi-notes-2.jpg','29ddefdd120e','2026-12-06T10:00:00+00:00',X'B0C122EF2BF84B60');
INSERT INTO "originals" VALUES('2bb437ef9f03e8e038c8ce4b746dc825ce1dc9c0d311edf8bd6edbdf085b82db','.heic',327123,'ada-match.heic','29ddefdd120e','2026-12-06T10:00:00+00:00',X'17B541CB525717AA');
INSERT INTO "originals" VALUES('fa1e98f77549df7365e906ee88b2265545885541b619485558a7033dcb9d67d5','.heic',176454,'ada-notes-1.heic','29ddefdd120e','2026-12-06T10:00:00+00:00',X'03A2081F2D21A2F4');
INSERT INTO "originals" VALUES('c49fda59a59e50583111bd1eac0e4b7e680862fbcdf8b95037bf23f2c97da3d1','.jpg',605295,'other.jpg','29ddefdd120e','2026-12-06T10:00:00+00:00',X'0B32B9BC1F2656BE');
INSERT INTO "originals" VALUES('9bf95b65fa8ce4bece783aa96ddace92737b8c7d5051775d3c180adee0adef5c','.jpg',870214,'stranger.jpg','29ddefdd120e','2026-12-06T10:00:00+00:00',X'AF65AD11DD4B8E6F');
INSERT INTO "originals" VALUES('29ed19403c8b93d7f1f01aa3f0ce36dd103dd4545039b90c21f32a29eba819ef','.jpg',870210,'dark.jpg','29ddefdd120e','2026-12-06T10:00:00+00:00',X'41F9EDC0443FDC8E');
INSERT INTO "originals" VALUES('648f824c62480b7323aa077d11922235895ac2ef963b7ab0aa98e3d6e85c4a3c','.json',302,'typed-648f824c6248','648f824c6248','2026-12-06T10:00:00+00:00',X'DA2991FA0FA90828');
CREATE TABLE piles (                      -- the files that one `add` was given
    id       TEXT PRIMARY KEY,            -- twelve characters of SHA-256 over the digests of its files
    added_at TEXT NOT NULL,
    seal     BLOB
) STRICT;
INSERT INTO "piles" VALUES('29ddefdd120e','2026-12-06T10:00:00+00:00',X'6F67EFB991B3447C');
INSERT INTO "piles" VALUES('648f824c6248','2026-12-06T10:00:00+00:00',X'D6862D4A52BA6A8D');
CREATE TABLE results (                    -- typed: claims and truth without any sheet
    id            INTEGER PRIMARY KEY,
    sitting       TEXT NOT NULL REFERENCES sittings (id),
    taster        INTEGER NOT NULL,
    claims        TEXT NOT NULL,          -- JSON: place → coaster number or null
    sure          TEXT NOT NULL,          -- JSON: place → word or null
    truth         TEXT NOT NULL,          -- JSON: place → coaster number
    correct       INTEGER NOT NULL,
    of            INTEGER NOT NULL,
    original      TEXT REFERENCES originals (digest),
    entered_by    TEXT NOT NULL CHECK (entered_by = 'typed'),
    added_at      TEXT NOT NULL,
    taken_back_at TEXT,
    seal          BLOB,
    UNIQUE (original)
) STRICT;
INSERT INTO "results" VALUES(1,'VTXEJX',1,'{"A": 3, "B": 1, "C": null}','{"A": null, "B": null, "C": null}','{"A": 3, "B": 2, "C": 1}',1,3,'648f824c62480b7323aa077d11922235895ac2ef963b7ab0aa98e3d6e85c4a3c','typed','2026-12-06T10:00:00+00:00',NULL,X'D5EC48A2458C820F');
CREATE TABLE settlements (                -- what a person decided; the last word on a box holds
    id      INTEGER PRIMARY KEY,
    subject TEXT NOT NULL,                -- a sheet, or with field 'row' a kit and taster, such as K7Q4M2-0001
    field   TEXT NOT NULL,
    option  TEXT NOT NULL,                -- of a row: '' or the photograph, as DIGEST:PAGE
    before  TEXT NOT NULL,
    after   TEXT,                         -- NULL: the decision before was taken back
    who     TEXT NOT NULL,
    at      TEXT NOT NULL,
    seal    BLOB
) STRICT;
INSERT INTO "settlements" VALUES(1,'Q8EA39-0007-1','words.1','apple','marked/doubtful','marked','rhian','2026-12-06T10:00:00+00:00',X'C653D9FFC14FD6FA');
CREATE TABLE sheets (                     -- one row for each reading of a page
    id            INTEGER PRIMARY KEY,
    original      TEXT REFERENCES originals (digest),   -- NULL: erased
    page          INTEGER NOT NULL,
    kind          TEXT NOT NULL CHECK (kind IN ('page', 'row', 'key')),
    sitting       TEXT REFERENCES sittings (id),
    taster        INTEGER,
    role          TEXT,
    sheet         TEXT,                   -- such as K7Q4M2-0001-3
    outcome       TEXT NOT NULL CHECK (outcome IN ('read', 'foreign', 'unreadable')),
    reason        TEXT,
    told          TEXT,                   -- JSON: a row's order; a key's places and salt
    entered_by    TEXT NOT NULL CHECK (entered_by IN ('scan', 'typed')),
    added_at      TEXT NOT NULL,
    taken_back_at TEXT,
    superseded_by INTEGER REFERENCES sheets (id),
    conflict      INTEGER NOT NULL DEFAULT 0,
    left_over     INTEGER NOT NULL DEFAULT 0,           -- things on it that only a person can settle
    seal          BLOB,
    UNIQUE (original, page)
) STRICT;
INSERT INTO "sheets" VALUES(1,'5115639ea1ee10f7ee86c4bb0040df164c5aaf428dea9af0116a259ec36f8b1b',1,'page','Q8EA39',7,'notes-1','Q8EA39-0007-1','read',NULL,NULL,'scan','2026-12-06T10:00:00+00:00',NULL,NULL,0,0,X'AA5A9B87B4CB8E1A');
INSERT INTO "sheets" VALUES(2,'9e011cc3ad21620010ed0c11508bfb14d51b3502cb67785a8f9752c1d58a78f7',1,'page','Q8EA39',7,'match','Q8EA39-0007-3','read',NULL,NULL,'scan','2026-12-06T10:00:00+00:00',NULL,NULL,0,0,X'2BAE6D0E3DF29FC6');
INSERT INTO "sheets" VALUES(3,'33d9c756eacec501bfe47db0a645d2baa5f615f35ce7c60d1e1f41eeaae48df0',1,'page','Q8EA39',7,'notes-1','Q8EA39-0007-1','read',NULL,NULL,'scan','2026-12-06T10:00:00+00:00',NULL,1,0,0,X'0BDDAFA52BF18C35');
INSERT INTO "sheets" VALUES(4,'5ebec0c1e8a2478a6624bfa17de13aaca9a88fbd6079698aa2783e56d1931bea',1,'page','Q8EA39',7,'notes-2','Q8EA39-0007-2','read',NULL,NULL,'scan','2026-12-06T10:00:00+00:00',NULL,NULL,0,0,X'F1CBCD00A6E7707B');
INSERT INTO "sheets" VALUES(5,'2bb437ef9f03e8e038c8ce4b746dc825ce1dc9c0d311edf8bd6edbdf085b82db',1,'page','Q8EA39',8,'match','Q8EA39-0008-3','read',NULL,NULL,'scan','2026-12-06T10:00:00+00:00',NULL,NULL,0,0,X'99154FD12CCF92AA');
INSERT INTO "sheets" VALUES(6,'fa1e98f77549df7365e906ee88b2265545885541b619485558a7033dcb9d67d5',1,'page','Q8EA39',8,'notes-1','Q8EA39-0008-1','read',NULL,NULL,'scan','2026-12-06T10:00:00+00:00',NULL,NULL,0,0,X'73F9FAA264361E6D');
INSERT INTO "sheets" VALUES(7,'c49fda59a59e50583111bd1eac0e4b7e680862fbcdf8b95037bf23f2c97da3d1',1,'page','Q8EA39',7,'match','Q8EA39-0007-3','read',NULL,NULL,'scan','2026-12-06T10:00:00+00:00',NULL,NULL,1,1,X'16490040A9A7F8F2');
INSERT INTO "sheets" VALUES(8,'29ed19403c8b93d7f1f01aa3f0ce36dd103dd4545039b90c21f32a29eba819ef',1,'page',NULL,NULL,NULL,NULL,'unreadable','it is too dark',NULL,'scan','2026-12-06T10:00:00+00:00',NULL,NULL,0,1,X'B88D4E1B8B87F70A');
CREATE TABLE sittings (
    id         TEXT PRIMARY KEY,          -- the kit's, or for a typed result its own
    kit        TEXT REFERENCES kits (id),
    title      TEXT NOT NULL,
    date       TEXT NOT NULL,
    drink      TEXT,
    shuffle    TEXT NOT NULL CHECK (shuffle IN ('host', 'hand', 'twin')),
    keys       TEXT NOT NULL CHECK (keys IN ('own', 'shared', 'balanced')),
    glasses    INTEGER NOT NULL CHECK (glasses BETWEEN 3 AND 5),
    entered_by TEXT NOT NULL CHECK (entered_by IN ('kit', 'typed')),
    added_at   TEXT NOT NULL,
    seal       BLOB
) STRICT;
INSERT INTO "sittings" VALUES('Q8EA39','Q8EA39','First flight of winter','2026-12-05','sake','host','own',5,'kit','2026-12-06T10:00:00+00:00',X'23ADC7B5814EF7B6');
INSERT INTO "sittings" VALUES('VTXEJX',NULL,'Typed in','2025-11-02',NULL,'hand','own',3,'typed','2026-12-06T10:00:00+00:00',X'372FCF10864BDF12');
CREATE TABLE sittings_drinks (
    sitting TEXT NOT NULL REFERENCES sittings (id),
    coaster INTEGER NOT NULL,
    drink   INTEGER NOT NULL REFERENCES drinks (id),
    seal    BLOB,
    UNIQUE (sitting, coaster)
) STRICT;
INSERT INTO "sittings_drinks" VALUES('Q8EA39',1,1,X'CA6649121881E9E1');
INSERT INTO "sittings_drinks" VALUES('Q8EA39',2,2,X'4EB4B97B34F6CB6C');
INSERT INTO "sittings_drinks" VALUES('Q8EA39',3,3,X'5EBB9972E1851C3F');
INSERT INTO "sittings_drinks" VALUES('Q8EA39',4,4,X'4963C8F812BF2C02');
INSERT INTO "sittings_drinks" VALUES('Q8EA39',5,5,X'D65E72A0D8B157FF');
CREATE TABLE sittings_tasters (
    sitting   TEXT NOT NULL REFERENCES sittings (id),
    number    INTEGER NOT NULL,
    taster    INTEGER REFERENCES tasters (id),  -- NULL: erased
    erased_at TEXT,
    seal      BLOB,
    UNIQUE (sitting, number)
) STRICT;
INSERT INTO "sittings_tasters" VALUES('Q8EA39',1,1,NULL,X'BCD22D46F5A9AFFB');
INSERT INTO "sittings_tasters" VALUES('Q8EA39',2,2,NULL,X'BA9422FE9360C68A');
INSERT INTO "sittings_tasters" VALUES('Q8EA39',3,3,NULL,X'3BA04E34102C4A52');
INSERT INTO "sittings_tasters" VALUES('Q8EA39',4,4,NULL,X'16D2F1D26C2E06DC');
INSERT INTO "sittings_tasters" VALUES('Q8EA39',5,5,NULL,X'996AFA0F62C78B4F');
INSERT INTO "sittings_tasters" VALUES('Q8EA39',6,6,NULL,X'29B6E2457149B7D0');
INSERT INTO "sittings_tasters" VALUES('Q8EA39',7,7,NULL,X'185D45FE8F7395DB');
INSERT INTO "sittings_tasters" VALUES('Q8EA39',8,8,NULL,X'0E79679F58C20294');
INSERT INTO "sittings_tasters" VALUES('VTXEJX',1,1,NULL,X'06D0C959624A8848');
CREATE TABLE tasters (                    -- people, over all sittings
    id   INTEGER PRIMARY KEY,
    key  TEXT NOT NULL UNIQUE,            -- the id, or the name where there is none
    name TEXT NOT NULL,
    seal BLOB
) STRICT;
INSERT INTO "tasters" VALUES(1,'ines','Ines',X'E109B487291E78DE');
INSERT INTO "tasters" VALUES(2,'soren','Søren Weiß',X'C958913BA9549805');
INSERT INTO "tasters" VALUES(3,'maelle','Maëlle',X'E0DF5EBA54FC698D');
INSERT INTO "tasters" VALUES(4,'tomas','Tomás Arriaga',X'5B2F535334179FB7');
INSERT INTO "tasters" VALUES(5,'yuki','結城 ゆき',X'DD5F57F64A01A428');
INSERT INTO "tasters" VALUES(6,'rhian','Rhian',X'7D173CD0CEFF6709');
INSERT INTO "tasters" VALUES(7,'kofi','Kofi',X'953139B0FB57AC9D');
INSERT INTO "tasters" VALUES(8,'ada','Ada Lindqvist',X'864A84F7FDE711FB');
CREATE TABLE waiting (                    -- sheets of kits that are not in the archive yet
    original TEXT NOT NULL REFERENCES originals (digest),
    page     INTEGER NOT NULL,
    kit      TEXT NOT NULL,
    reason   TEXT NOT NULL,
    added_at TEXT NOT NULL,
    seal     BLOB,
    UNIQUE (original, page)
) STRICT;
INSERT INTO "waiting" VALUES('9bf95b65fa8ce4bece783aa96ddace92737b8c7d5051775d3c180adee0adef5c',1,'3NQK8N','it is a sheet of another kit','2026-12-06T10:00:00+00:00',X'2ABA4696EB4B2EFC');
CREATE INDEX sittings_of_taster ON sittings_tasters (taster);
CREATE INDEX sittings_of_drink ON sittings_drinks (drink);
CREATE INDEX sheets_of_sitting ON sheets (sitting, taster, taken_back_at, superseded_by, left_over);
CREATE INDEX readings_of_sheet ON sheets (sheet);
CREATE INDEX settlements_of_subject ON settlements (subject);
CREATE INDEX results_of_sitting ON results (sitting, taster);
CREATE INDEX waiting_for_kit ON waiting (kit);
COMMIT;
