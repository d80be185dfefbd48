-- Answers are stored as the application packs them (libs/casebook/diagnosis/packed-answer.ts); those stored before stay as the JSON they are, in bytes. The server
-- is not to compress them once more.

-- AlterTable
ALTER TABLE "diagnosis" ALTER COLUMN "result" TYPE BYTEA USING convert_to("result"::text, 'UTF8');
ALTER TABLE "diagnosis" ALTER COLUMN "result" SET STORAGE EXTERNAL;
