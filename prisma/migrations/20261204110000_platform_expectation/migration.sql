-- What known-good after-readings say about a platform, in versions; each answer names the one it was judged by.

-- AlterTable
ALTER TABLE "diagnosis" ADD COLUMN     "expectation_version" INTEGER;

-- CreateTable
CREATE TABLE "platform_expectation" (
    "org_id" UUID NOT NULL,
    "platform_id" UUID NOT NULL,
    "version" INTEGER NOT NULL,
    "engine_version" TEXT NOT NULL,
    "cases" INTEGER NOT NULL,
    "shops" INTEGER NOT NULL,
    "document" JSONB,
    "created_at" TIMESTAMPTZ(6) NOT NULL,
    "looked_at" TIMESTAMPTZ(6) NOT NULL,

    CONSTRAINT "platform_expectation_pkey" PRIMARY KEY ("org_id","platform_id","version")
);

-- AddForeignKey
ALTER TABLE "platform_expectation" ADD CONSTRAINT "platform_expectation_org_id_platform_id_fkey" FOREIGN KEY ("org_id", "platform_id") REFERENCES "platform"("org_id", "id") ON DELETE CASCADE ON UPDATE NO ACTION;

-- One tenant sees its own rows, in every session and for the owner too.
ALTER TABLE "platform_expectation" ENABLE ROW LEVEL SECURITY;
ALTER TABLE "platform_expectation" FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON "platform_expectation" USING (org_id = nullif(current_setting('app.org_id', true), '')::uuid) WITH CHECK (org_id = nullif(current_setting('app.org_id', true), '')::uuid);
GRANT SELECT, INSERT, UPDATE, DELETE ON "platform_expectation" TO coolback_app;
