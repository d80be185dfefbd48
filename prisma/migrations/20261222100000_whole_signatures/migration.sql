-- Signatures are kept in memory whole: an index that gives all of a layout, and one that gives what was written since. Codes are two bytes a dimension now; those of
-- half a byte are read from their values until they are made anew.

-- DropIndex
DROP INDEX "case_signature_org_id_version_layout_opened_at_idx";

-- DropIndex
DROP INDEX "case_signature_code_idx";

-- Of what stands here already the number does not matter: nobody has it in memory.
-- AlterTable
ALTER TABLE "case_signature" ADD COLUMN     "written_in" BIGINT NOT NULL DEFAULT 0;
ALTER TABLE "case_signature" ALTER COLUMN "written_in" SET DEFAULT ((pg_current_xact_id())::text)::bigint;

-- CreateIndex
CREATE INDEX "case_signature_kind_idx" ON "case_signature"("org_id", "version", "layout", "case_id", "code");

-- CreateIndex
CREATE INDEX "case_signature_org_id_version_layout_written_in_idx" ON "case_signature"("org_id", "version", "layout", "written_in");
