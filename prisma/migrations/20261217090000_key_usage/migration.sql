-- How much each key asks for, by day; and which list of rights a key was made with.

-- AlterTable
ALTER TABLE "access_key" ADD COLUMN     "rights_edition" INTEGER NOT NULL DEFAULT 1;

-- CreateTable
CREATE TABLE "key_usage" (
    "org_id" UUID NOT NULL,
    "key_id" UUID NOT NULL,
    "day" DATE NOT NULL,
    "requests" BIGINT NOT NULL,
    "refused" BIGINT NOT NULL,

    CONSTRAINT "key_usage_pkey" PRIMARY KEY ("org_id","key_id","day")
);

-- AddForeignKey
ALTER TABLE "key_usage" ADD CONSTRAINT "key_usage_org_id_key_id_fkey" FOREIGN KEY ("org_id", "key_id") REFERENCES "access_key"("org_id", "id") ON DELETE CASCADE ON UPDATE NO ACTION;

-- One tenant sees its own rows, in every session and for the owner too.
ALTER TABLE "key_usage" ENABLE ROW LEVEL SECURITY;
ALTER TABLE "key_usage" FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON "key_usage" USING (org_id = nullif(current_setting('app.org_id', true), '')::uuid) WITH CHECK (org_id = nullif(current_setting('app.org_id', true), '')::uuid);
GRANT SELECT, INSERT, UPDATE, DELETE ON "key_usage" TO coolback_app;
