-- One row is a student or a device and the random code that stands for it in one release. Here there are none: codes live in a key file outside the store.
-- Inputs: none
-- Grain: code
-- Units: none
-- Source: the key file of `levelhold export`, which puts them in this relation's place; codes are drawn at random, not made from the identifier
CREATE OR REPLACE VIEW pseudonyms AS
SELECT
    CAST(NULL AS VARCHAR) AS kind,
    CAST(NULL AS VARCHAR) AS id,
    CAST(NULL AS VARCHAR) AS code
WHERE FALSE;
