-- What an import wrote for nobody. Seven words of an order were stored with two indexes and a foreign key each and read by no statement: a fifth of the
-- database's work on an order. The key from a row of an import to its import was judged for each row against the one row that the import's own
-- transaction holds and changes; rows and import are erased together.

-- DropForeignKey
ALTER TABLE "case_word" DROP CONSTRAINT "case_word_org_id_case_id_fkey";

-- DropForeignKey
ALTER TABLE "import_row" DROP CONSTRAINT "import_row_org_id_import_id_fkey";

-- DropTable
DROP TABLE "case_word";
