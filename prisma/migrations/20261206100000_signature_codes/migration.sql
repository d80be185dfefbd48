-- Signatures once more in half a byte a dimension, so that all of a layout and a leading fault are looked through in the index itself.

-- DropIndex
DROP INDEX "case_signature_org_id_version_layout_leading_fault_opened_a_idx";

-- AlterTable
ALTER TABLE "case_signature" ADD COLUMN     "code" BYTEA;

-- CreateIndex
CREATE INDEX "case_signature_code_idx" ON "case_signature"("org_id", "version", "layout", "leading_fault", "opened_at" DESC, "case_id", "code");
