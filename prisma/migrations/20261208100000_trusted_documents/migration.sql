-- Documents of GraphQL that are asked for by their hash, keys that may ask for nothing else, and the sign-in service an organisation trusts.

-- CreateTable
CREATE TABLE "trusted_document" (
    "org_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "hash" TEXT NOT NULL,
    "query" TEXT NOT NULL,
    "created_at" TIMESTAMPTZ(6) NOT NULL,

    CONSTRAINT "trusted_document_pkey" PRIMARY KEY ("org_id","id")
);

-- CreateTable
CREATE TABLE "sign_in_service" (
    "org_id" UUID NOT NULL,
    "issuer" TEXT NOT NULL,
    "created_at" TIMESTAMPTZ(6) NOT NULL,

    CONSTRAINT "sign_in_service_pkey" PRIMARY KEY ("org_id")
);

-- AlterTable
ALTER TABLE "access_key" ADD COLUMN "trusted_documents_only" BOOLEAN NOT NULL DEFAULT false;

-- AlterTable
ALTER TABLE "member" ADD COLUMN "subject" TEXT;

-- CreateIndex
CREATE UNIQUE INDEX "trusted_document_org_id_hash_key" ON "trusted_document"("org_id", "hash");

-- CreateIndex
CREATE UNIQUE INDEX "member_org_id_subject_key" ON "member"("org_id", "subject");

-- One tenant sees its own rows, in every session and for the owner too.
ALTER TABLE "trusted_document" ENABLE ROW LEVEL SECURITY;
ALTER TABLE "trusted_document" FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON "trusted_document" USING (org_id = nullif(current_setting('app.org_id', true), '')::uuid) WITH CHECK (org_id = nullif(current_setting('app.org_id', true), '')::uuid);
GRANT SELECT, INSERT, UPDATE, DELETE ON "trusted_document" TO coolback_app;
ALTER TABLE "sign_in_service" ENABLE ROW LEVEL SECURITY;
ALTER TABLE "sign_in_service" FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON "sign_in_service" USING (org_id = nullif(current_setting('app.org_id', true), '')::uuid) WITH CHECK (org_id = nullif(current_setting('app.org_id', true), '')::uuid);
GRANT SELECT, INSERT, UPDATE, DELETE ON "sign_in_service" TO coolback_app;
